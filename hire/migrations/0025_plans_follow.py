import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models

from people.journal.sql import seal_table


class Migration(migrations.Migration):

    dependencies = [
        ('hire', '0024_days_given_up'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PlanFollowed',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('followed_at', models.DateTimeField()),
                ('booking', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='hire.booking')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('line', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='hire.line')),
                ('pencil', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='hire.pencil')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='followed', to='hire.jobplan')),
            ],
            options={
                'ordering': ['followed_at', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(models.Q(('booking', None), ('line', None)), models.Q(('line', None), ('pencil', None)), models.Q(('booking', None), ('pencil', None)), _connector='OR'), models.Q(('booking', None), ('line', None), ('pencil', None), _negated=True)), name='hire_planfollowed_into_one', violation_error_message='A plan goes with one hire, one booking or one pencilled cart.')],
            },
        ),
        seal_table('hire_planfollowed'),
        migrations.AlterField(
            model_name='pencil',
            name='ended_how',
            field=models.CharField(blank=True, choices=[('lapsed', 'Lapsed'), ('let_go', 'Let go'), ('promised', 'Became a hire'), ('booked', 'Became a booking')], max_length=8),
        ),
        migrations.AlterConstraint(
            model_name='pencil',
            name='hire_pencil_ended_somehow',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('ended_at', None), ('ended_how', '')), models.Q(('ended_at__isnull', False), models.Q(('ended_how', ''), _negated=True)), _connector='OR'), name='hire_pencil_ended_somehow', violation_error_message='A pencil that ended lapsed, was let go, or became a hire or a booking.'),
        ),
    ]
